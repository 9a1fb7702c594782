"""What is said of a tolerance study: tables, sentences, the JSON object and the page."""
