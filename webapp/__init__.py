"""The web app and the command line: parse, call a service, render."""
