"""What an assessment answers: frozen records, and the typed document that is stored, sent and shown."""
