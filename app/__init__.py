"""The desktop program: a window and a command line over `analysis`."""
