import { DomainError } from '../domain/errors.js';
import { nearestName } from '../domain/nearest-name.js';
import { EN } from '../domain/texts/en/index.js';
import { makeRootLog } from '../log.js';
import { type Terminal, UsageError } from './command.js';
import { COMMANDS, type CommandEntry } from './index.js';

export const EXIT = { done: 0, failed: 1, wrongUsage: 2 } as const;

/** Faults listed one by one on the terminal, before the rest is counted. */
const FAULTS_SHOWN = 20;

/** Runs what was typed. @returns the exit status: 0 done, 1 failed, 2 wrong usage */
export async function runCommandLine(
  args: readonly string[],
  terminal: Terminal,
  environment: NodeJS.ProcessEnv,
): Promise<number> {
  const [first] = args;
  if (first === undefined) {
    terminal.err(topHelp());
    return EXIT.wrongUsage;
  }
  if (first === '--help' || first === '-h' || (first === 'help' && args.length === 1)) {
    terminal.out(topHelp());
    return EXIT.done;
  }
  // `help import` asks the same as `import --help`.
  const words = first === 'help' ? [...args.slice(1), '--help'] : args;
  const found = findCommand(words);
  if (found === null) {
    terminal.err(unknownCommand(words));
    return EXIT.wrongUsage;
  }
  try {
    const command = await found.entry.load();
    if (found.rest.includes('--help') || found.rest.includes('-h')) {
      terminal.out(command.help.trimEnd());
      return EXIT.done;
    }
    await command.run(found.rest, terminal, environment);
    return EXIT.done;
  } catch (error) {
    return failure(error, found.entry, terminal);
  }
}

function findCommand(args: readonly string[]): { entry: CommandEntry; rest: readonly string[] } | null {
  for (const length of [2, 1]) {
    const name = args.slice(0, length).join(' ');
    const entry = COMMANDS.find((candidate) => candidate.name === name);
    if (entry !== undefined) return { entry, rest: args.slice(length) };
  }
  return null;
}

function unknownCommand(args: readonly string[]): string {
  const words = args.filter((word) => !word.startsWith('-'));
  const typed = words.slice(0, 2).join(' ');
  const names = COMMANDS.map(({ name }) => name);
  const group = names.filter((name) => name.startsWith(`${words[0]} `));
  if (group.length > 0) {
    return `“${words[0]}” needs a second word: ${group.map((name) => `“${name}”`).join(' or ')}.`;
  }
  const nearest = nearestName(typed, names);
  const firstWord = (name: string): string => name.split(' ', 1)[0] ?? name;
  const nearestFirst = nearestName(words[0] ?? '', names.map(firstWord));
  const meant = nearest === null ? names.filter((name) => firstWord(name) === nearestFirst) : [nearest];
  const hint = meant.length === 0 ? '' : ` Did you mean ${meant.map((name) => `“${name}”`).join(' or ')}?`;
  return `There is no command “${words[0] ?? args[0]}”.${hint} “brimline --help” lists the commands.`;
}

function failure(error: unknown, entry: CommandEntry, terminal: Terminal): number {
  if (error instanceof UsageError) {
    terminal.err(`${error.message}\n“brimline ${entry.name} --help” explains the options.`);
    return EXIT.wrongUsage;
  }
  if (error instanceof DomainError) {
    terminal.err(error.message);
    for (const fault of error.faults.slice(0, FAULTS_SHOWN)) terminal.err(`  ${fault.pointer}: ${fault.detail}`);
    if (error.faults.length > FAULTS_SHOWN) terminal.err(`  and ${error.faults.length - FAULTS_SHOWN} more`);
    terminal.err(EN[`error.${error.code}.next`]);
    return EXIT.failed;
  }
  terminal.err(`“brimline ${entry.name}” met a fault of its own and stopped. The log line below has the details.`);
  makeRootLog('error').error({ err: error, command: entry.name }, 'command failed');
  return EXIT.failed;
}

function topHelp(): string {
  const width = Math.max(...COMMANDS.map(({ name }) => name.length));
  const lines = COMMANDS.map(({ name, summary }) => `  ${name.padEnd(width)}  ${summary}`);
  return `Brimline keeps self-watering containers at client sites alive: levels to litres, dry dates, findings, alarms, rounds
and an account of every litre.

Usage: brimline COMMAND [options]

${lines.join('\n')}

To look around:        brimline demo
To begin for real:     brimline serve        (says where to set it up, data in ./brimline-data)
About one command:     brimline COMMAND --help

Exit status: 0 done, 1 failed, 2 wrong usage.`;
}
