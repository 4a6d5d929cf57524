"""What is said between the steps: frozen dataclasses, one small module per step."""
