"""The whole job as plain functions: new, check, design, draw."""
