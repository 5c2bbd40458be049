"""Ties each view to the session: what changed there is set here, what the view tells goes back."""
