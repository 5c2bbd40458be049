"""The engineering of the joint: thread, class, friction, clamp force, stiffness, the joints file."""
