"""What the program is put through on purpose: kills at work, and folders full of baits."""
