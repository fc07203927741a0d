"""Many devices over one range of loss: means, rankings, reach, links, and what a sentence may claim of them."""
