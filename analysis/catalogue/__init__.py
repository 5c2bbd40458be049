"""What the program knows by name: figures, rules, findings, causes, verdicts, reasons; one record each.

Tables, sentences, filters, axes, exports and help texts take words, units and digits from here.
"""
