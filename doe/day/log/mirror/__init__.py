"""The journal on a second disk: written by another process, which may hang where the disk does."""
