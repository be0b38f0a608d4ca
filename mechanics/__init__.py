"""From a spring's dimensions to its rate, with an honest band. No pictures in here."""
