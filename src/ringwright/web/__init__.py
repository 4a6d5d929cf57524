"""The local app: thin pages over desk."""
