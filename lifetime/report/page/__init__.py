"""What stands on the one-page report: templates, style sheet, and the words and numbers they are filled with."""
