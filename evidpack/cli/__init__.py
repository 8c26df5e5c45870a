"""The command line: parse, call, print. One short module per command."""
