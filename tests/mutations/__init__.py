"""Changes of constants, signs, formulas, limits and next checks that the tests have to notice."""
