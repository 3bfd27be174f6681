"""One file per command: ``add_command`` says how it is called, ``run`` does it."""
