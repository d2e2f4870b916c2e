"""Events, their chain, and signatures: no act is written without its event."""
