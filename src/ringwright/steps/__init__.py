"""The steps of the making, each a package, blind to each other."""
