"""What is doubtful in records, as people, programs and spreadsheets see it."""
