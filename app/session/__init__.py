"""What is open, judged and decided; slow work in the background."""
