"""One function for each thing a person can do; the only place with clock, files, store and processes."""
