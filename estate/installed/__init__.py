"""Installed cables as links: of the same type as designed ones, with what is not known of them."""
