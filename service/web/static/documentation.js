// Draws the OpenAPI document of this very service; no other host is asked for anything.
window.addEventListener("load", () => {
  window.SwaggerUIBundle({
    url: "/v1/openapi.json",
    dom_id: "#documentation",
    deepLinking: true,
    docExpansion: "list",
    defaultModelsExpandDepth: 0,
    validatorUrl: null,
  });
});
