// Lint of the schema by Redocly's strictest shipped rules; prints findings, one a line.
import { createConfig, lint } from "@redocly/openapi-core";

const config = await createConfig({ extends: ["recommended-strict"] });
const problems = await lint({ ref: process.argv[2], config });
for (const { ruleId, severity, message, location } of problems) {
  console.log(`${severity} ${ruleId} ${location[0]?.pointer ?? ""}: ${message}`);
}
process.exitCode = problems.length ? 1 : 0;
