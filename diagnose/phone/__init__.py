"""The consultation on a phone: a folder for any static host, in which this package runs in the browser."""
