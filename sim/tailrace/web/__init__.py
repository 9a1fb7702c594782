"""Pages that compute in the browser: JavaScript modules, what they must know, one file of all."""
