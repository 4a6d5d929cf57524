"""What is written for people and for other programs: dossier, quote, cards."""
