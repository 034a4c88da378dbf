"""Answers on paper: tables, plan, page, saved result."""
