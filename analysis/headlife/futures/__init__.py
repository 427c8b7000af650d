"""What may come: draws of lives, printers run over the calendar, distributions of a demand."""
