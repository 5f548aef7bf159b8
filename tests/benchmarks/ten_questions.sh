#!/bin/sh
# Ten questions an owner asks, with the answers as printed, to be read for sense by a person.
set -u
W="--volume-m3 50 --free-chlorine 2 --ph 7.5 --alkalinity 90 --stabiliser 50 --hardness 250 --salt 3.2 --temp-c 26"
q() { echo; echo "=== $1"; shift; echo "\$ dosectl ask $*"; dosectl ask "$@" 2>&1; }
q "1  How much hypochlorite brings free chlorine from 2 to 4?" add hypochlorite --strength-trade-percent 12.5 --to 4 $W
q "2  How much acid brings the pH from 7.9 to 7.4?" add acid --strength-percent 31.45 --to 7.4 $W --ph 7.9
q "3  I overdosed to 12 mg/L. How do I get it down to 5?" come-down --to 5 $W --free-chlorine 12 --latitude 45
q "4  Is my stabiliser of 160 too high?" stabiliser $W --stabiliser 160
q "5  My strip says free chlorine 3. What is that worth?" test free-chlorine 3 strips
q "6  May we swim now?" swim $W --combined-chlorine 0.2 --clear yes
q "7  What should I test next?" next-test $W --tested free-chlorine=8 --tested pH=3 --tested total-alkalinity=10 --tested stabiliser=45
q "8  How much salt from 2.4 to 3.2 g/L?" salt --to 3.2 $W --salt 2.4
q "9  How do I get alkalinity from 140 to 90?" lower-alkalinity acid --strength-percent 31.45 --to 90 $W --alkalinity 140
q "10 Does my water scale?" balance $W --working
q "11 May I mix dichlor with calcium hypochlorite?" mix dichlor calcium-hypochlorite
q "12 How much 12.5 % hypochlorite? (ambiguous)" add hypochlorite --strength-percent 12.5 --to 4 $W
