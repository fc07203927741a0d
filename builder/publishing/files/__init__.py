"""Every file of a site beside its pages."""
