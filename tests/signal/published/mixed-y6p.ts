! figures: IBIS Open Forum, Touchstone File Format Specification, version 2.0, example 16
[Version] 2.0
# MHz Y RI R 50
[Number of Ports] 6
[Number of Frequencies] 1
[Reference] 50 75 75 50 0.01 0.01
[Mixed-Mode Order] D2,3 D6,5 C2,3 C6,5 S4 S1
[Network Data]
5.00 8.0 9.0 2.0 -1.0 3.0 -2.0 1.0 3.0 1.0 0.1 0.2 -0.2
2.0 -1.0 7.0 7.0 1.8 -2.0 -1.0 -1.0 -0.5 0.5 0.2 -0.1
3.0 -2.0 1.8 -2.0 5.8 6.0 1.2 0.8 0.9 0.7 0.3 -0.5
1.0 3.0 -1.0 -1.0 1.2 0.8 6.3 8.0 2.0 -0.5 1.5 0.6
1.0 0.1 -0.5 0.5 0.9 0.7 2.0 -0.5 4.7 -6.0 -1.0 2.0
0.2 -0.2 0.2 -0.1 0.3 -0.5 1.5 0.6 -1.0 2.0 5.5 -7.0
[End]
