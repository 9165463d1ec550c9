// The leading page of a class: it leads, and lets the projector lead too.
import { lead } from "./lead.js";
import { answerKey, keepKey } from "./ledkey.js";

const { path, key } = document.getElementById("class").dataset;
keepKey(key);
answerKey(key);
lead(`${path}/lead/${key}`);
