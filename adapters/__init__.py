"""Where roomcue meets the world: command line, terminal, files, broker."""
