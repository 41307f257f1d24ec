"""Where to stand the tripod, before anything is filmed."""
