#!/usr/bin/env node
import { runCommandLine } from './commands/run.js';
import { processTerminal } from './commands/terminal.js';

process.exitCode = await runCommandLine(process.argv.slice(2), processTerminal(process), process.env);
