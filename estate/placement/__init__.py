"""Which recorders serve which cameras."""
