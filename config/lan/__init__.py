"""Serving phones on a crew's own network over https: addresses, an authority of our own, one server for both doors."""
