"""The steps by which a database comes to today's form, one module each, in order."""
