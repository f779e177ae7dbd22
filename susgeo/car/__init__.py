"""One car at rest: links, locators, axles, the whole car, and the file that holds it."""
