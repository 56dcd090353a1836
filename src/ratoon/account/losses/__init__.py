"""Where pol went: losses by place, what speaks for each, the undetermined rest."""
