"""Who somebody is and what they may see; no database and no pages here."""
