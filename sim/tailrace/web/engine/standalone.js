// The engine by itself in a page, for tests and benchmarks: `engine` in the window.

import { useFacts } from "./facts.js";
import { engine } from "./index.js";

useFacts(JSON.parse(document.getElementById("facts")?.textContent ?? "{}"));
Object.assign(window, { engine });
