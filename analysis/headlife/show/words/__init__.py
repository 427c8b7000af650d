"""What do the answers say? Every sentence, number format, rounding and unit that people read.

`numbers` has the formats; each other module the sentences of one question. They take values from
the rooms of numbers and give text; they compute nothing, and nothing decides by reading them.
"""
