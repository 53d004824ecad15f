[Version] 2.0
# MHz S RI R 50
[Number of Ports] 4
[Number of Frequencies] 1
[Mixed-Mode Order] D1,2 D3,4 C1,3 C2,4
[Network Data]
100 0.1 0 0.8 -0.5 0.01 0 0.02 0
 0.8 -0.5 0.1 0 0.02 0 0.01 0
 0.01 0 0.02 0 0.1 0 0.8 -0.5
 0.02 0 0.01 0 0.8 -0.5 0.1 0
[End]
