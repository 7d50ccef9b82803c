// What html-validate has against pages: `node validate.cjs FILES...` prints a list of `FILE:LINE RULE
// WORDS`. The rules stand in `validate.json`. Left out of them: a `<section>` in place of `role="region"`.
// What scrolls by itself is a region so that it can be reached by keyboard, but no section of the text.
'use strict';
const path = require('node:path');
const { FileSystemConfigLoader, HtmlValidate } = require('html-validate');
const { main } = require('./browser.cjs');
const rules = require('./validate.json');

main(async () => {
  const checker = new HtmlValidate(new FileSystemConfigLoader({ ...rules, root: true }));
  const report = await checker.validateMultipleFiles(process.argv.slice(2));
  return report.results.flatMap((result) => result.messages.map((said) =>
    `${path.basename(result.filePath)}:${said.line} ${said.ruleId} ${said.message}`));
});
