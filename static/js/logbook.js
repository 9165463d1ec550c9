// A logbook: the reading beside its chart follows the pointer and the arrow keys.
import { readCurves } from "./curves.js";

readCurves();
