"""Where commissions, models and dossiers are kept."""
