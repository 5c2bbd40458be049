"""The parts around the areas: lines, dialogs, theme."""
