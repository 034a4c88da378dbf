"""The command line: click commands, each a few lines over workflow."""
