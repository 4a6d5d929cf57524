"""Ringwright makes the ring on paper first."""
