"""Drawings of a spring to scale: its wire in space, two views of it, their dimensions."""
