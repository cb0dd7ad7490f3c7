"""Studies: many races that differ in chosen keys, made by a design, marched anywhere, gathered as one Dataset."""
