"""One file per exercise: a style in, a motion out."""
