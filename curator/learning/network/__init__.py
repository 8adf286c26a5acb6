"""The net, its training and its export."""
