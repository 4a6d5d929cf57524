"""The pages, one module each; every one reads the shelf and draws, and knows nothing of the trade."""
