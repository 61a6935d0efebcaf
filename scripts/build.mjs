// Builds everything: the rooms and the command line, and the pages of the workbench.
import { build, buildWeb, installPackages } from './setup.mjs'

installPackages()
build()
buildWeb()
