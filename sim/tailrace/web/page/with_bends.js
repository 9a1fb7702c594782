// The page with sliders where tubes are bent: the same, with what the engine asks for beside.

import {} from "../engine/bent.js";
import {} from "./page.js";
