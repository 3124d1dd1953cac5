// Wakes a page of the work bench in a package.
import { wakeBench } from "../bench/wake.mjs";

for (const bench of document.querySelectorAll("[data-bench]")) wakeBench(bench);
