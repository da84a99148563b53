"""One folder a page: routes, context and template."""
