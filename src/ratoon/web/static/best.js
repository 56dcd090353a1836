// Waits until the best settings are worked out, then shows them. Without it, a link looks again.
"use strict";

const address = new URL(location.href);
address.searchParams.set("format", "json");
fetch(address).then(() => location.reload()).catch(() => {}); // the link stays where nobody answers
