"""Pixels to numbers: pure steps on arrays. Reading and writing files happens in measure/io."""
