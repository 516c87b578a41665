"""Law packs against an application, the season, tonnage."""
