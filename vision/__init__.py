"""From the bytes of a photo to the spring's geometry."""
