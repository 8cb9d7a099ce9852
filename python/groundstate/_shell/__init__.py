"""What the commands of the command line do; the parser is in __main__."""
