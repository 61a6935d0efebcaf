export interface Call {
  program: string
  args: string[]
}

/** How a system is asked to open an address in its browser. No shell takes part, so nothing in the address is a command. */
export function browserCall(platform: NodeJS.Platform, url: string): Call {
  if (platform === 'darwin') return { program: 'open', args: [url] }
  if (platform === 'win32') return { program: 'rundll32', args: ['url.dll,FileProtocolHandler', url] }
  return { program: 'xdg-open', args: [url] }
}
