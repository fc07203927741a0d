"""What is listed and not compared like a rate: prices, heat, power, features, parts, radiated power, ceilings."""
