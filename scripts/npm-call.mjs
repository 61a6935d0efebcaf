/**
 * How npm is started without a shell: its own program, by this Node.
 * @param rules the paths of the system, `path.win32` or `path.posix`.
 */
export function npmCall({ execPath, env, rules, isThere }) {
  const beside = rules.dirname(execPath)
  const found = [
    // Set where npm itself started this, as `npm start` does.
    env.npm_execpath,
    rules.join(beside, 'node_modules', 'npm', 'bin', 'npm-cli.js'),
    rules.join(beside, '..', 'lib', 'node_modules', 'npm', 'bin', 'npm-cli.js'),
    rules.join(beside, '..', 'share', 'nodejs', 'npm', 'bin', 'npm-cli.js'),
  ].find((file) => file !== undefined && /\.[cm]?js$/.test(file) && isThere(file))
  return found === undefined ? { program: 'npm', before: [] } : { program: execPath, before: [found] }
}
