"""Commands of the command line that have a file of their own: each adds itself to the parser."""
