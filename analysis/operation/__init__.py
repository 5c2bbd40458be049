"""What was done to the fastener: stops, stages, pulses, loosening."""
