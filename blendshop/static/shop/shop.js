// Blendshop: small page behaviour. No inline handlers, no eval.
"use strict";
